/* The courier's law as 'foilsweep code' writes it, with one thing changed: look for 'ours'.
 * The numbers come from the craft file; see control.h, which 'foilsweep code' writes too.
 *
 * Sums and products are rounded one by one in the model: compile with -ffp-contract=off, and never with -ffast-math.
 */
#include <math.h>

#include "control.h"

/* Arithmetic. Libraries differ in the last digits of sine and arc tangent, so they are written out here; good to 1e-8. */

#define N(x) ((number)(x))
#define PI N(3.141592653589793)
#define GRAVITY N(9.81)

static number square_root(number x)
{
#ifdef CONTROL_DOUBLE
    return sqrt(x);
#else
    return sqrtf(x);
#endif
}

static number clip(number x, number low, number high)
{
    number y = x > low ? x : low;
    return y < high ? y : high;
}

static number size(number x)
{
    return x < 0 ? -x : x;
}

/* The same angle (rad) within half a turn; of one that is within one and a half. */
static number wrapped(number angle)
{
    if (angle > PI)
        return angle - 2 * PI;
    if (angle < -PI)
        return angle + 2 * PI;
    return angle;
}

/* Of an angle in rad, within some turns. */
static inline struct turn turn_of(number angle)
{
    number x = angle, sign = 1, y, z, s, c;
    struct turn found;
    if (size(angle) > PI / 2) {
        int half_turns = (int)(angle * N(0.3183098861837907) + (angle < 0 ? N(-0.5) : N(0.5)));
        x = angle - (number)half_turns * PI;
        sign = half_turns % 2 == 0 ? N(1.0) : N(-1.0);
    }
    y = x * x;
    z = y * y;
    s = (N(-1.9840804038256414e-4) + y * N(2.7522618810429056e-6)) + z * N(-2.384669329187452e-8);
    s = (N(-0.16666666606466726) + y * N(0.008333330495663078)) + z * s;
    c = (N(2.4801070182443077e-5) + y * N(-2.752566143619917e-7)) + z * N(1.991996131732345e-9);
    c = (N(0.04166666650397076) + y * N(-0.001388888461241802)) + z * c;
    found.sine = sign * (x + x * y * s);
    found.cosine = sign * ((1 + y * N(-0.4999999999793847)) + z * c);
    return found;
}

/* The angle (rad) that has this tangent, which is at most 0.42 either way. */
static inline number angle_of(number tangent)
{
    number y = tangent * tangent, z = y * y, p;
    p = (N(-0.06937324140971665) + y * N(0.026811800506594048)) * z + (N(-0.1421734973377345) + y * N(0.10590837023826512));
    p = (N(-0.3333323084128392) + y * N(0.19995601230687268)) + z * p;
    return tangent + tangent * y * p;
}

/* Angle (rad) of the vector (x, y) from the x axis, -pi ... pi; 0 for no vector. */
static inline number direction(number y, number x)
{
    number across = size(y), along = size(x), slope, angle;
    if (x > 0 && across <= N(0.41) * along)
        return angle_of(y / x);
    slope = across > along ? along / across : along > 0 ? across / along : 0;
    angle = 2 * angle_of(slope / (1 + square_root(1 + slope * slope)));
    angle = across > along ? PI / 2 - angle : angle;
    angle = x < 0 ? PI - angle : angle;
    return y < 0 ? -angle : angle;
}

/* Rangefinders: what came since the last tick. */

static void take_ranges(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    int i;
    for (i = 0; i < RANGEFINDERS; i++)
        if (m->ranges[i].age <= LONGEST_RANGE_AGE)
            m->ranges[i].age += r->elapsed;
    for (i = 0; i < r->range_count; i++) {
        const struct rangefinder *finder = &s->rangefinders[r->ranges[i].sensor];
        struct range_memory *of = &m->ranges[r->ranges[i].sensor];
        number value = r->ranges[i].distance;
        if (!(value >= 0 && value <= finder->far))
            continue;
        of->age = 0;
        of->last = value;
        of->known = 1;
    }
}

/* Attitude: the gyro's rates, integrated, and levelled slowly by the accelerometer. */

/* Tangent of the pitch (rad), of 1.4 rad at most either way. */
static number slope_of(const struct turn *pitch)
{
    if (pitch->cosine > N(0.16996714290024104))
        return pitch->sine / pitch->cosine;
    return pitch->sine > 0 ? N(5.797883715482887) : N(-5.797883715482887);
}

static void estimate_attitude(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    const number *f = r->force;
    number level_roll = direction(-f[1], -f[2]);
    number level_pitch = direction(f[0], square_root(f[1] * f[1] + f[2] * f[2]));
    if (!m->attitude_known) {
        m->roll = level_roll;
        m->pitch = level_pitch;
        m->attitude_known = 1;
    } else {
        const struct turn *roll = &m->attitude.roll, *pitch = &m->attitude.pitch;
        number share = r->elapsed / s->levelling_time;
        m->roll += r->elapsed * (r->gyro[0] + (r->gyro[1] * roll->sine + r->gyro[2] * roll->cosine) * slope_of(pitch))
                   + share * wrapped(level_roll - m->roll);
        m->pitch += r->elapsed * (r->gyro[1] * roll->cosine - r->gyro[2] * roll->sine) + share * (level_pitch - m->pitch);
    }
    m->roll = wrapped(m->roll);
    m->pitch = wrapped(m->pitch);
    m->attitude.roll = turn_of(m->roll);
    m->attitude.pitch = turn_of(m->pitch);
}

/* Height of the keel under the centre of gravity (m), by one rangefinder's last reading and the estimated attitude. */
static number height_seen(const struct rangefinder *s, const struct range_memory *m, const struct attitude *a)
{
    number slant = m->last * s->look[2] - s->height;
    number ahead = s->x + m->last * s->look[0];
    number aside = s->y + m->last * s->look[1];
    number across = a->roll.sine * a->pitch.cosine;
    return slant * a->roll.cosine * a->pitch.cosine - a->pitch.sine * ahead + across * aside;
}

/* Whether the height is measured, and how high (m). */
static int measure_height(const struct control_settings *s, const struct control_memory *m, number *height)
{
    *height = height_seen(&s->rangefinders[0], &m->ranges[0], &m->attitude);
    return m->ranges[0].known;
}

/* The height estimate is what is measured; gives its rate (m/s, up), from the height less the smoothed height. */
static number estimate_height(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    number measured, rate;
    if (measure_height(s, m, &measured)) {
        m->height[0] = measured;
        if (!m->height_known)
            m->smoothed_height = measured;
        m->height_known = 1;
    }
    rate = (m->height[0] - m->smoothed_height) / s->smoothing;
    m->smoothed_height += r->elapsed * rate;
    return rate;
}

/* The trim at a speed (m/s): linear between those in the settings, the first and last one held beyond. */
static struct trim trim_at(const struct control_settings *s, number speed)
{
    struct trim found = s->trims[0];
    (void)speed;
    return found;
}

/* Moves the course towards the wanted one at the turn rate; gives the bank for it (rad, starboard down). */
static number follow_course(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    number most = s->turn_rate * r->elapsed;
    number turned = clip(wrapped(r->wanted_course - m->course), -most, most);
    m->course = wrapped(m->course + turned);
    if (!(s->bank_share > 0))
        return 0;
    return clip(s->bank_share * direction(r->speed * turned, r->elapsed * GRAVITY), -s->bank_limit, s->bank_limit);
}

/* Share of all commanded angles but the trim. */
static number angle_share(const struct control_settings *s, const struct control_readings *r)
{
    (void)s;
    (void)r;
    return 1;
}

/* What a tick wants of the foils, beside what the memory has. */
struct wish {
    struct trim trim;
    number share; /* of commanded angles */
    number climb; /* m/s, rate of the height estimate */
    number bank;  /* rad, starboard down */
};

/* A loop's command (rad); its integral gathers over `time` (s), 0 to hold it. rate: as measured, not of the error. */
static number run_loop(const struct loop_gains *gains, number *integral, number error, number rate, number time)
{
    number command = gains->proportional * error + *integral - gains->derivative * rate;
    *integral = clip(*integral + gains->integral * error * time, -gains->limit, gains->limit);
    return clip(command, -gains->limit, gains->limit);
}

/* Whether the boat flies, by its own readings. Integrals wait while it floats or crosses the hump. */
static int flies(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    int high = m->height[0] > N(0.75) * r->wanted_height;
    int low = m->height[0] < N(0.25) * r->wanted_height && r->speed < N(0.5) * r->wanted_speed;
    m->quick_time = r->speed > N(0.9) * r->wanted_speed ? m->quick_time + r->elapsed : 0;
    if (!r->go || low)
        m->flying = 0;
    else if (high || m->quick_time > 2 * s->levelling_time)
        m->flying = 1;
    return m->flying;
}

/* Commands the foils by the loops of height, pitch and roll. bank: rad wanted; climb: m/s; ahead: rad, the preview's. */
static void command_foils(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                          const struct wish *w, struct control_commands *c)
{
    number time = flies(s, m, r) ? r->elapsed : 0;
    number missing = r->wanted_height - m->height[0];
    number firm = missing > 0 ? s->own.firm_below : 1; /* ours: firmer below the wanted height than above it */
    number bow_up = clip(s->pitch_share * missing, N(-0.09), N(0.09));
    number height = w->share * run_loop(&s->height_loop, &m->height_integral, firm * missing, w->climb, time);
    number pitch = w->share * run_loop(&s->pitch_loop, &m->pitch_integral, s->pitch_trim + bow_up - m->pitch, r->gyro[1], time);
    number roll = w->share * run_loop(&s->roll_loop, &m->roll_integral, w->bank - m->roll, r->gyro[0], time);
    int i;
    for (i = 0; i < FOILS; i++) {
        const struct foil *foil = &s->foils[i];
        number angle = foil->height * (height + w->trim.height) + foil->pitch * (pitch + w->trim.pitch) + foil->roll * roll;
        c->foil[i] = clip(angle, -foil->travel, foil->travel);
    }
}

/* The steering command (rad, positive to starboard), by the course error and the rate of turn. */
static number steer(const struct control_settings *s, struct control_memory *m, const struct control_readings *r, number share)
{
    number wanted = s->heading_proportional * wrapped(m->course - r->heading);
    wanted -= s->heading_derivative * r->gyro[2];
    return clip(share * wanted, -s->heading_limit, s->heading_limit);
}

/* The throttle, 0 ... 1. Its integral waits while the throttle is at a limit and the error pushes on. trim: throttle. */
static number run_throttle(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                           number trim)
{
    number error = r->wanted_speed - r->speed;
    number wanted = trim + s->speed_proportional * error + m->speed_integral
                    + s->throttle_share * (r->wanted_height - m->height[0]);
    number throttle = clip(wanted, 0, 1);
    if (!r->go)
        return 0;
    if (!((wanted - throttle) * error > 0))
        m->speed_integral += s->speed_integral * error * r->elapsed;
    return throttle;
}

/* The safe state. It is part of every law, and flights have it too, but for what `plausible` looks for. */

static int within(number x, number low, number high)
{
    return x >= low && x <= high; /* a value that is not a number is within nothing */
}

/* Whether readings can be true at all. */
static int plausible(const struct control_settings *s, const struct control_readings *r)
{
    int i;
    for (i = 0; i < 3; i++)
        if (!(size(r->gyro[i]) <= 50 && size(r->force[i]) <= 400))
            return 0;
    if (r->range_count > MOST_RANGES)
        return 0;
    for (i = 0; i < r->range_count; i++)
        if (r->ranges[i].sensor >= RANGEFINDERS)
            return 0;
    return r->elapsed > 0 && within(r->elapsed, 0, 10 * s->period) && within(r->speed, -5, 50) && size(r->heading) <= PI
           && size(r->wanted_course) <= PI && r->wanted_speed > 0 && within(r->wanted_speed, 0, 30)
           && r->wanted_height > 0 && within(r->wanted_height, 0, 5);
}

/* Whether anything says that the boat must not run. */
static int in_danger(const struct control_settings *s, const struct control_memory *m, const struct control_readings *r)
{
    int i;
    if (!within(r->link_age, 0, LONGEST_LINK_AGE) || !(m->attitude.roll.cosine * m->attitude.pitch.cosine >= LEAST_UPRIGHT))
        return 1;
    for (i = 0; i < RANGEFINDERS; i++)
        if (s->rangefinders[i].trust > 0 && (m->ranges[i].age > s->range_age || m->ranges[i].age > LONGEST_RANGE_AGE))
            return 1;
    return 0;
}

static void begin(struct control_memory *m, const struct control_readings *r)
{
    m->height_integral = m->pitch_integral = m->roll_integral = 0;
    m->flying = 0;
    m->quick_time = 0;
    m->speed_integral = 0;
    m->course = r->heading;
}

static void watch(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    if (!r->armed)
        m->mode = CONTROL_DISARMED;
    else if (m->mode == CONTROL_DISARMED) {
        begin(m, r);
        m->mode = CONTROL_RUNS;
    }
    if (m->mode == CONTROL_RUNS && in_danger(s, m, r))
        m->mode = CONTROL_STOPPED;
}

static void neutral(const struct control_memory *m, struct control_commands *c)
{
    int i;
    for (i = 0; i < FOILS; i++)
        c->foil[i] = 0;
    c->rudder = 0;
    c->throttle = 0;
    c->height = m->height[0];
    c->course = m->course;
    c->bank = 0;
    c->refused = m->refused;
    c->mode = m->mode;
}

void control_start(struct control_memory *m)
{
    int i;
    *m = (struct control_memory){0};
    m->mode = CONTROL_STOPPED;
    for (i = 0; i < RANGEFINDERS; i++)
        m->ranges[i].age = 2 * LONGEST_RANGE_AGE;
}

void control_tick(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                  struct control_commands *c)
{
    struct wish w;
    number throttle;
    number steering;
    if (!plausible(s, r)) {
        m->mode = r->armed ? CONTROL_STOPPED : CONTROL_DISARMED;
        neutral(m, c);
        return;
    }
    estimate_attitude(s, m, r);
    take_ranges(s, m, r);
    w.climb = estimate_height(s, m, r);
    watch(s, m, r);
    neutral(m, c);
    if (m->mode != CONTROL_RUNS)
        return;
    w.trim = trim_at(s, r->wanted_speed);
    w.share = angle_share(s, r);
    w.bank = follow_course(s, m, r);
    c->course = m->course;
    c->bank = w.bank;
    command_foils(s, m, r, &w, c);
    throttle = run_throttle(s, m, r, w.trim.throttle);
    steering = steer(s, m, r, w.share);
    c->rudder = clip(s->rudder_side * steering, -s->rudder_travel, s->rudder_travel);
    c->throttle = throttle;
}

/* The controller of the card "Courier with a bought controller" (base craft, design 0).
 * Inside everything is in rad, m, s; the card's degrees and centimetres are turned in the constants. */
#include "boat.h"
#include <math.h>

#define PI 3.14159265f
#define DEG (PI / 180.0f)
#define CM 0.01f
#define GRAVITY 9.81f

/* height */
#define HEIGHT_P (0.4f * DEG / CM)
#define HEIGHT_I (0.1f * DEG / CM)
#define HEIGHT_D (0.02f * DEG / CM)
#define HEIGHT_MOST (5.73f * DEG)

/* pitch and roll, angle loop around rate loop */
#define ANGLE_P 8.0f
#define ANGLE_MOST_RATE (60.0f * DEG)
#define ANGLE_FILTER 10.0f
#define RATE_FILTER 20.0f
#define PITCH_RATE_P 0.05f
#define PITCH_RATE_I 0.2f
#define ROLL_RATE_P 0.06f
#define ROLL_RATE_I 0.2f
#define RATE_D 0.0f
#define RATE_MOST (6.0f * DEG)
#define WANTED_PITCH 0.0f
#define WANTED_ROLL 0.0f /* bank in a turn: 0 % */

/* course */
#define HEADING_P 1.0f
#define HEADING_D 0.15f
#define HEADING_MOST (10.03f * DEG)
#define MOST_TURN (29.8f * DEG)

/* speed */
#define THROTTLE_P 0.30f
#define THROTTLE_I 0.15f
#define THROTTLE_TRIM 0.1912f

/* servos */
#define FOIL_TRAVEL (9.0f * DEG)
#define RUDDER_TRAVEL (10.0f * DEG)

/* estimates */
#define LEVEL_TIME 4.0f
#define CORNER 2.5f
#define TWICE_DAMPING 1.4f
#define LAG 9 /* ticks */
#define FINDER_AHEAD 0.348f
#define FINDER_STARBOARD 0.0f
#define FINDER_OVER_KEEL 0.0f

/* flight */
#define FLIGHT_HEIGHT 0.75f
#define FLIGHT_SPEED 0.9f
#define FLIGHT_TIME 8.0f
#define LANDED_HEIGHT 0.25f
#define LANDED_SPEED 0.5f

/* mixer: height, pitch, roll, trim */
static const real mixer[FOILS][4] = {
    {0.9717f, 0.6761f, 1.0f, 1.401f * DEG},
    {0.9717f, 0.6761f, -1.0f, 1.401f * DEG},
    {1.057f, -1.352f, 0.0f, 0.993f * DEG},
};

struct cascade {
    real wanted;        /* rad, the angle wanted, filtered */
    real rate;          /* rad/s, the gyro, filtered */
    real integral;      /* rad of command */
};

struct controller {
    int begun;          /* attitude is set */
    real roll, pitch;   /* rad */

    int have_reading;   /* a reading has ever come */
    real reading;       /* m, the last */
    real kept[LAG + 1]; /* m, h of i ticks ago; kept[0] is that of now */
    real climb;         /* m/s */

    int flying;
    real fast_time;     /* s at over nine tenths of the wanted speed */

    real height_integral;   /* rad */
    real throttle_integral; /* share */
    struct cascade pitch_loop, roll_loop;
    real course;        /* rad, the wanted course, at its largest rate of turn */
};

static real within(real x, real most)
{
    return x > most ? most : x < -most ? -most : x;
}

static real turned(real angle) /* to -pi ... pi */
{
    return remainderf(angle, 2.0f * PI);
}

static real share(real T, real corner) /* of a low-pass, per tick */
{
    return T / (T + 1.0f / (2.0f * PI * corner));
}

void controller_begin(struct controller *c)
{
    static const struct controller zero;
    *c = zero; /* every field 0 */
}

static void attitude(struct controller *c, const struct inputs *in, real T)
{
    const real *f = in->accelerometer, *w = in->gyro;
    real level_roll = c->roll, level_pitch = c->pitch;
    real side = sqrtf(f[1] * f[1] + f[2] * f[2]);

    if (side > 0.0f) {
        level_roll = atan2f(-f[1], -f[2]);
        level_pitch = atan2f(f[0], side);
    }
    if (!c->begun) {
        c->begun = 1;
        c->roll = level_roll;
        c->pitch = within(level_pitch, 85.0f * DEG);
        return;
    }
    {
        real sr = sinf(c->roll), cr = cosf(c->roll), tp = tanf(c->pitch);
        real roll_rate = w[0] + (w[1] * sr + w[2] * cr) * tp;
        real pitch_rate = w[1] * cr - w[2] * sr;
        real part = T / LEVEL_TIME;
        real roll = c->roll + T * roll_rate + part * turned(level_roll - c->roll);
        real pitch = c->pitch + T * pitch_rate + part * (level_pitch - c->pitch);
        c->roll = turned(roll);
        c->pitch = within(pitch, 85.0f * DEG);
    }
}

static void height(struct controller *c, const struct inputs *in, real T)
{
    const real *f = in->accelerometer;
    real sr = sinf(c->roll), cr = cosf(c->roll), sp = sinf(c->pitch), cp = cosf(c->pitch);
    real up = sp * f[0] - cp * (sr * f[1] + cr * f[2]) - GRAVITY;
    real measured, d;
    int i, first = !c->have_reading;
    int n = in->reading_count > MOST_READINGS ? MOST_READINGS : in->reading_count;

    for (i = 0; i < n; i++)
        if (isfinite(in->reading[i])) {
            c->reading = in->reading[i];
            c->have_reading = 1;
        }
    if (!c->have_reading) { /* nothing known yet: no error of height */
        for (i = 0; i <= LAG; i++)
            c->kept[i] = in->wanted_height;
        return;
    }
    /* the beam's length downward, less how high the rangefinder is above the keel under the centre of gravity */
    measured = c->reading * cp * cr
             - (FINDER_AHEAD * sp - FINDER_STARBOARD * cp * sr + FINDER_OVER_KEEL * cp * cr);
    if (first) {
        for (i = 0; i <= LAG; i++)
            c->kept[i] = measured;
        c->climb = 0.0f;
        return;
    }
    for (i = LAG; i > 0; i--)
        c->kept[i] = c->kept[i - 1];
    c->kept[0] += T * c->climb;
    c->climb += T * up;
    d = measured - c->kept[LAG];
    for (i = 0; i < LAG; i++)
        c->kept[i] += TWICE_DAMPING * CORNER * T * d + (real)(LAG - 1 - i) * CORNER * CORNER * T * T * d;
    c->climb += CORNER * CORNER * T * d;
}

static void flight(struct controller *c, const struct inputs *in, real T)
{
    real h = c->kept[0];

    if (!in->armed) {
        c->flying = 0;
        c->fast_time = 0.0f;
        return;
    }
    if (in->go && in->speed > FLIGHT_SPEED * in->wanted_speed)
        c->fast_time += T;
    else
        c->fast_time = 0.0f;
    if (c->flying) {
        if (h < LANDED_HEIGHT * in->wanted_height && in->speed < LANDED_SPEED * in->wanted_speed)
            c->flying = 0;
    } else if (h > FLIGHT_HEIGHT * in->wanted_height || c->fast_time >= FLIGHT_TIME)
        c->flying = 1;
}

/* An angle loop around a rate loop: the command. */
static real cascade(struct cascade *l, real wanted, real angle, real gyro, real p, real i, int gather, real T)
{
    real asked, off, command, before = l->rate;

    l->wanted += share(T, ANGLE_FILTER) * (wanted - l->wanted);
    l->rate += share(T, RATE_FILTER) * (gyro - l->rate);
    asked = within(ANGLE_P * (l->wanted - angle), ANGLE_MOST_RATE);
    off = asked - l->rate;
    command = p * off + l->integral - RATE_D * (l->rate - before) / T;
    if (gather)
        l->integral = within(l->integral + i * T * off, RATE_MOST);
    return within(command, RATE_MOST);
}

void controller_tick(struct controller *c, const struct inputs *in, struct outputs *out)
{
    real T = in->elapsed > 0.0f ? in->elapsed : 0.01f;
    real height_off, height_command, pitch_command, roll_command, off, throttle;
    int gather, i;

    attitude(c, in, T);
    height(c, in, T);
    flight(c, in, T);
    gather = in->armed && in->go && c->flying;

    /* height */
    height_off = in->wanted_height - c->kept[0];
    height_command = within(HEIGHT_P * height_off + c->height_integral - HEIGHT_D * c->climb, HEIGHT_MOST);
    if (gather)
        c->height_integral = within(c->height_integral + HEIGHT_I * T * height_off, HEIGHT_MOST);

    /* pitch and roll */
    pitch_command = cascade(&c->pitch_loop, WANTED_PITCH, c->pitch, in->gyro[1], PITCH_RATE_P, PITCH_RATE_I, gather, T);
    roll_command = cascade(&c->roll_loop, WANTED_ROLL, c->roll, in->gyro[0], ROLL_RATE_P, ROLL_RATE_I, gather, T);

    for (i = 0; i < FOILS; i++)
        out->foil[i] = within(mixer[i][0] * height_command + mixer[i][1] * pitch_command + mixer[i][2] * roll_command
                              + mixer[i][3], FOIL_TRAVEL);

    /* course */
    if (!in->armed)
        c->course = in->heading;
    else
        c->course = turned(c->course + within(turned(in->wanted_course - c->course), MOST_TURN * T));
    off = turned(c->course - in->heading);
    out->rudder = within(within(HEADING_P * off - HEADING_D * in->gyro[2], HEADING_MOST), RUDDER_TRAVEL);

    /* speed */
    if (in->armed && in->go) {
        off = in->wanted_speed - in->speed;
        throttle = THROTTLE_TRIM + THROTTLE_P * off + c->throttle_integral;
        throttle = throttle > 1.0f ? 1.0f : throttle < 0.0f ? 0.0f : throttle;
        if (!(throttle >= 1.0f && off > 0.0f) && !(throttle <= 0.0f && off < 0.0f))
            c->throttle_integral += THROTTLE_I * T * off;
    } else
        throttle = 0.0f;
    out->throttle = throttle;
}

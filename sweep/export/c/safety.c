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
#if LEVELS
    m->height_integral = m->pitch_integral = m->roll_integral = 0;
    m->flying = 0;
    m->quick_time = 0;
#if CASCADES
    m->pitch_cascade.wanted = m->pitch_cascade.rate = 0;
    m->roll_cascade.wanted = m->roll_cascade.rate = 0;
#endif
#endif
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

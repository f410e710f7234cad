static void neutral(const struct control_memory *m, struct control_commands *c)
{
    int i;
    for (i = 0; i < FOILS; i++)
        c->foil[i] = 0;
#if RUDDER
    c->rudder = 0;
#endif
#if DIFFERENTIAL
    c->throttle_port = c->throttle_starboard = 0;
#else
    c->throttle = 0;
#endif
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
#if STEERS
    number steering;
#endif
    if (!plausible(s, r)) {
        m->mode = r->armed ? CONTROL_STOPPED : CONTROL_DISARMED;
        neutral(m, c);
        return;
    }
    estimate_attitude(s, m, r);
    take_ranges(s, m, r);
#if COUNTS_TURNS
    take_heading(s, m, r);
#endif
    w.climb = estimate_height(s, m, r);
#if PREVIEWS
    w.ahead = foresee(s, m, r, w.climb);
#endif
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
#if STEERS
    steering = steer(s, m, r, w.share);
#endif
#if RUDDER
    c->rudder = clip(s->rudder_side * steering, -s->rudder_travel, s->rudder_travel);
#endif
#if DIFFERENTIAL
    if (r->go) {
        c->throttle_port = clip(throttle + s->differential * steering, 0, 1);
        c->throttle_starboard = clip(throttle - s->differential * steering, 0, 1);
    }
#else
    c->throttle = throttle;
#endif
}

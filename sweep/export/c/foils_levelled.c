/* A loop's command (rad); its integral gathers over `time` (s), 0 to hold it. rate: as measured, not of the error. */
static number run_loop(const struct loop_gains *gains, number *integral, number error, number rate, number time)
{
    number command = gains->proportional * error + *integral - gains->derivative * rate;
    *integral = clip(*integral + gains->integral * error * time, -gains->limit, gains->limit);
    return clip(command, -gains->limit, gains->limit);
}

#if CASCADES
/* Share of the way that a first-order low-pass goes in a tick (s); corner: Hz. */
static number filtered_share(number elapsed, number corner)
{
    return elapsed / (elapsed + 1 / (2 * PI * corner));
}

/* An axis: the angle loop asks for a rate of turning, the rate loop commands the foils (rad). wanted: rad beside the trim's;
 * off: the trim's less the estimate; rate: rad/s, of the gyro; time: s over which the integral gathers, 0 to hold it. */
static number run_cascade(const struct cascade_gains *gains, struct cascade_memory *m, number *integral, number wanted, number off,
                          number rate, number elapsed, number time)
{
    number asked, change, error, command;
    m->wanted += filtered_share(elapsed, gains->angle_filter) * (wanted - m->wanted);
    asked = clip(gains->angle_proportional * (m->wanted + off), -gains->angle_limit, gains->angle_limit);
    change = filtered_share(elapsed, gains->rate_filter) * (rate - m->rate);
    m->rate += change;
    error = asked - m->rate;
    command = gains->rate.proportional * error + *integral - gains->rate.derivative * (change / elapsed);
    *integral = clip(*integral + gains->rate.integral * error * time, -gains->rate.limit, gains->rate.limit);
    return clip(command, -gains->rate.limit, gains->rate.limit);
}

#endif
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
    number bow_up = clip(s->pitch_share * missing, N(-0.09), N(0.09));
    number height = w->share * run_loop(&s->height_loop, &m->height_integral, missing, w->climb, time);
#if CASCADES
    number pitch = w->share
                   * run_cascade(&s->pitch_cascade, &m->pitch_cascade, &m->pitch_integral, bow_up, s->pitch_trim - m->pitch,
                                 r->gyro[1], r->elapsed, time);
    number roll = w->share
                  * run_cascade(&s->roll_cascade, &m->roll_cascade, &m->roll_integral, w->bank, -m->roll, r->gyro[0], r->elapsed,
                                time);
#else
    number pitch = w->share * run_loop(&s->pitch_loop, &m->pitch_integral, s->pitch_trim + bow_up - m->pitch, r->gyro[1], time);
    number roll = w->share * run_loop(&s->roll_loop, &m->roll_integral, w->bank - m->roll, r->gyro[0], time);
#endif
    int i;
#if PREVIEWS
    if (w->ahead > 0 || w->ahead < 0)
        height = clip(height + w->ahead, -s->height_loop.limit, s->height_loop.limit);
#endif
    for (i = 0; i < FOILS; i++) {
        const struct foil *foil = &s->foils[i];
        number angle = foil->height * (height + w->trim.height) + foil->pitch * (pitch + w->trim.pitch) + foil->roll * roll;
        c->foil[i] = clip(angle, -foil->travel, foil->travel);
    }
}

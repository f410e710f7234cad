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

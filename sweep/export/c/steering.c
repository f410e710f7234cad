/* The steering command (rad, positive to starboard), by the course error and the rate of turn. */
static number steer(const struct control_settings *s, struct control_memory *m, const struct control_readings *r, number share)
{
    number wanted = s->heading_proportional * wrapped(m->course - r->heading);
#if LEVELS
    wanted -= s->heading_derivative * r->gyro[2];
#else
    wanted -= s->heading_derivative * m->heading_rate;
#endif
    return clip(share * wanted, -s->heading_limit, s->heading_limit);
}

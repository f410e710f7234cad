/* Share of all commanded angles but the trim. */
static number angle_share(const struct control_settings *s, const struct control_readings *r)
{
#if SCHEDULED
    number share = s->schedule_speed / (r->speed > N(0.3) ? r->speed : N(0.3));
    return clip(share * share, N(0.2), 4);
#else
    (void)s;
    (void)r;
    return 1;
#endif
}

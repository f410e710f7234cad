/* The rate of turn, from one fix to the next. */
static void take_heading(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    if (!r->fix_is_new)
        return;
    m->heading_rate = m->heading_known ? wrapped(r->heading - m->last_heading) * s->fix_rate : 0;
    m->last_heading = r->heading;
    m->heading_known = 1;
}

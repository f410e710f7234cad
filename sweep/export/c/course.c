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

/* Angle of all foils (rad) for the water that was seen ahead and that now comes to the foils; climb: m/s, now. */
static number foresee(const struct control_settings *s, struct control_memory *m, const struct control_readings *r, number climb)
{
    number speed = r->speed > N(0.5) ? r->speed : N(0.5);
    number ahead = s->preview_distance / speed - s->preview_delay;
    int back = (int)clip(ahead / r->elapsed, 0, PREVIEW_TICKS - 1);
    m->newest_climb = (unsigned char)((m->newest_climb + 1) % PREVIEW_TICKS);
    m->climbs[m->newest_climb] = climb;
    return -s->preview * m->climbs[(m->newest_climb + PREVIEW_TICKS - back) % PREVIEW_TICKS] / speed;
}

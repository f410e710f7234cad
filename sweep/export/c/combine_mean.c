/* Whether the height is measured, and how high (m): the mean by trust over the rangefinders that have ever read. */
static int measure_height(const struct control_settings *s, const struct control_memory *m, number *height)
{
    number total = 0, known = 0;
    int i;
    for (i = 0; i < RANGEFINDERS; i++)
        if (m->ranges[i].known && s->rangefinders[i].trust > 0) {
            total += s->rangefinders[i].trust * height_seen(&s->rangefinders[i], &m->ranges[i], &m->attitude);
            known += s->rangefinders[i].trust;
        }
    *height = known > 0 ? total / known : 0;
    return known > 0;
}

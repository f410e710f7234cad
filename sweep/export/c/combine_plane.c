/* Whether the height is measured, and how high (m): of the plane through what all trusted rangefinders see, at the centre of
 * gravity; until all have read, the mean by trust of those that have. */
static int measure_height(const struct control_settings *s, const struct control_memory *m, number *height)
{
    number total = 0, planar = 0, known = 0;
    int i, all = 1;
    for (i = 0; i < RANGEFINDERS; i++) {
        if (!(s->rangefinders[i].trust > 0))
            continue;
        if (m->ranges[i].known) {
            number here = height_seen(&s->rangefinders[i], &m->ranges[i], &m->attitude);
            total += s->rangefinders[i].trust * here;
            planar += s->rangefinders[i].plane * here;
            known += s->rangefinders[i].trust;
        } else
            all = 0;
    }
    *height = all ? planar : known > 0 ? total / known : 0;
    return known > 0;
}

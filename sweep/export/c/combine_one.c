/* Whether the height is measured, and how high (m). */
static int measure_height(const struct control_settings *s, const struct control_memory *m, number *height)
{
    *height = height_seen(&s->rangefinders[0], &m->ranges[0], &m->attitude);
    return m->ranges[0].known;
}

/* The height estimate is what is measured; gives its rate (m/s, up), from the height less the smoothed height. */
static number estimate_height(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    number measured, rate;
    if (measure_height(s, m, &measured)) {
        m->height[0] = measured;
        if (!m->height_known)
            m->smoothed_height = measured;
        m->height_known = 1;
    }
    rate = (m->height[0] - m->smoothed_height) / s->smoothing;
    m->smoothed_height += r->elapsed * rate;
    return rate;
}

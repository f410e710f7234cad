/* The height estimate follows the accelerometer above the corner frequency and the rangefinders below; gives its rate (m/s, up).
 * A reading is old: it is held against the estimate of its own time, and the difference corrects every estimate since. */
static number estimate_height(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    const int age = HEIGHT_TICKS - 1;
    const struct attitude *a = &m->attitude;
    number upward = a->pitch.sine * r->force[0]
                    - a->pitch.cosine * (a->roll.sine * r->force[1] + a->roll.cosine * r->force[2]) - GRAVITY;
    number measured, off, raised, quickened, rate;
    int back, known = measure_height(s, m, &measured);
    if (known && !m->height_known) {
        for (back = 0; back < HEIGHT_TICKS; back++)
            m->height[back] = measured;
        m->height_known = 1;
    }
    off = known ? measured - m->height[age] : 0;
    raised = r->elapsed * N(1.4) * s->corner * off;
    quickened = r->elapsed * s->corner * s->corner * off;
    rate = m->climb;
    for (back = age; back > 0; back--)
        m->height[back] = m->height[back - 1] + raised + (number)(age - back) * r->elapsed * quickened;
    m->height[0] += r->elapsed * rate + raised + (number)age * r->elapsed * quickened;
    m->climb = m->height_known ? rate + r->elapsed * upward + quickened : 0;
    return m->climb;
}

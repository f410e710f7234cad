/* Rangefinders: what came since the last tick. */

#if MEDIAN > 1
/* The median of a rangefinder's last readings, this one included; of an even number the lower of the middle two. */
static number median(struct range_memory *m, number reading)
{
    int i, j, known;
    for (i = MEDIAN - 1; i > 0; i--)
        m->recent[i] = m->recent[i - 1];
    m->recent[0] = reading;
    if (m->recent_count < MEDIAN)
        m->recent_count++;
    known = m->recent_count;
    for (i = 0; i < known; i++) {
        int below = 0, equal = 0;
        for (j = 0; j < known; j++) {
            below += m->recent[j] < m->recent[i];
            equal += m->recent[j] == m->recent[i];
        }
        if (below <= (known - 1) / 2 && (known - 1) / 2 < below + equal)
            return m->recent[i];
    }
    return reading;
}

#endif
#if GATED
/* Whether a value (m) jumps too far; the fourth in a row is admitted all the same. */
static int refuses(const struct rangefinder *s, struct range_memory *m, number value)
{
    if (s->gate > 0 && m->known && size(value - m->last) > s->gate && m->refused_in_a_row < 3) {
        m->refused_in_a_row++;
        return 1;
    }
    m->refused_in_a_row = 0;
    return 0;
}

#endif
static void take_ranges(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    int i;
    for (i = 0; i < RANGEFINDERS; i++)
        if (m->ranges[i].age <= LONGEST_RANGE_AGE)
            m->ranges[i].age += r->elapsed;
    for (i = 0; i < r->range_count; i++) {
        const struct rangefinder *finder = &s->rangefinders[r->ranges[i].sensor];
        struct range_memory *of = &m->ranges[r->ranges[i].sensor];
        number value = r->ranges[i].distance;
        if (!(value >= 0 && value <= finder->far))
            continue;
        of->age = 0;
#if MEDIAN > 1
        value = median(of, value);
#endif
#if GATED
        if (refuses(finder, of, value)) {
            m->refused++;
            continue;
        }
#endif
        of->last = value;
        of->known = 1;
    }
}

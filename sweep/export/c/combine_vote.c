/* Whether the height is measured, and how high (m): the median of the trusted rangefinders that have ever read; of an even
 * number, the mean of the middle two. */
static int measure_height(const struct control_settings *s, const struct control_memory *m, number *height)
{
    number each[RANGEFINDERS], low = 0, high = 0;
    int i, j, known = 0;
    for (i = 0; i < RANGEFINDERS; i++)
        if (m->ranges[i].known && s->rangefinders[i].trust > 0)
            each[known++] = height_seen(&s->rangefinders[i], &m->ranges[i], &m->attitude);
    for (i = 0; i < known; i++) {
        int below = 0, equal = 0;
        for (j = 0; j < known; j++) {
            below += each[j] < each[i];
            equal += each[j] == each[i];
        }
        if (below <= (known - 1) / 2 && (known - 1) / 2 < below + equal)
            low = each[i];
        if (below <= known / 2 && known / 2 < below + equal)
            high = each[i];
    }
    *height = N(0.5) * (low + high);
    return known > 0;
}

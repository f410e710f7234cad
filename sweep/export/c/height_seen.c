/* Height of the keel under the centre of gravity (m), by one rangefinder's last reading and the estimated attitude. */
static number height_seen(const struct rangefinder *s, const struct range_memory *m, const struct attitude *a)
{
    number slant = m->last * s->look[2] - s->height;
    number ahead = s->x + m->last * s->look[0];
    number aside = s->y + m->last * s->look[1];
    number across = a->roll.sine * a->pitch.cosine;
    return slant * a->roll.cosine * a->pitch.cosine - a->pitch.sine * ahead + across * aside;
}

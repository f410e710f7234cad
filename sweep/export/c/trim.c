/* The trim at a speed (m/s): linear between those in the settings, the first and last one held beyond. */
static struct trim trim_at(const struct control_settings *s, number speed)
{
    struct trim found = s->trims[0];
#if TRIMS > 1
    int i;
    for (i = 1; i < TRIMS && speed > s->trims[i - 1].speed; i++) {
        const struct trim *low = &s->trims[i - 1], *high = &s->trims[i];
        number share = clip((speed - low->speed) / (high->speed - low->speed), 0, 1);
        found.height = low->height + share * (high->height - low->height);
        found.pitch = low->pitch + share * (high->pitch - low->pitch);
        found.throttle = low->throttle + share * (high->throttle - low->throttle);
    }
#else
    (void)speed;
#endif
    return found;
}

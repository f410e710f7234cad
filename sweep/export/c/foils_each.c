/* Commands each foil by its own rangefinder's height; foil i has rangefinder i, and with fewer of them they take turns. */
static void command_foils(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                          const struct wish *w, struct control_commands *c)
{
    int i;
    for (i = 0; i < FOILS; i++) {
        const struct foil *foil = &s->foils[i];
        const struct rangefinder *finder = &s->rangefinders[i % RANGEFINDERS];
        const struct range_memory *seen = &m->ranges[i % RANGEFINDERS];
        number trim = foil->height * w->trim.height + foil->pitch * w->trim.pitch;
        number missing = 0, answer;
        if (seen->known && finder->trust > 0)
            missing = r->wanted_height - (seen->last * finder->look[2] - finder->height);
        answer = clip(s->height_loop.proportional * missing, -s->height_loop.limit, s->height_loop.limit);
        c->foil[i] = clip(trim + w->share * answer, -foil->travel, foil->travel);
    }
}

/* Between a controller that was written by somebody who had the card alone, and the flights. */
struct control_memory {
    struct controller of_the_card;
};

void control_start(struct control_memory *m)
{
    controller_begin(&m->of_the_card);
}

void control_tick(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                  struct control_commands *c)
{
    struct inputs in;
    struct outputs out;
    int i;
    (void)s; /* its numbers are those of the card */
    in.elapsed = r->elapsed;
    in.reading_count = r->range_count < MOST_READINGS ? r->range_count : MOST_READINGS;
    for (i = 0; i < MOST_READINGS; i++)
        in.reading[i] = i < in.reading_count ? r->ranges[i].distance : 0;
    for (i = 0; i < 3; i++) {
        in.gyro[i] = r->gyro[i];
        in.accelerometer[i] = r->force[i];
    }
    in.speed = r->speed;
    in.heading = r->heading;
    in.armed = r->armed;
    in.go = r->go;
    in.wanted_speed = r->wanted_speed;
    in.wanted_course = r->wanted_course;
    in.wanted_height = r->wanted_height;
    controller_tick(&m->of_the_card, &in, &out);
    for (i = 0; i < FOILS; i++)
        c->foil[i] = out.foil[i];
    c->rudder = out.rudder;
    c->throttle = out.throttle;
    c->height = r->wanted_height; /* of the record alone */
    c->course = r->wanted_course;
    c->bank = 0;
    c->refused = 0;
    c->mode = 0;
}

/* What the program adds behind the builder's code: from its own rows of numbers to the structs of control.h, and back. */
#include <string.h>

#include "places.h"

#define LINE 64 /* bytes that a processor fetches at once */
#define AHEAD 192 /* bytes of a memory that are fetched ahead: behind them lie rings, of which a tick needs a number or two */
#define GIVEN(place) g[(place) * STRIDE]
#define OUT(place) out[(place) * STRIDE]

const unsigned long caller_sizes[4] = {sizeof(struct control_settings), sizeof(struct control_readings),
                                       sizeof(struct control_commands), sizeof(struct control_memory)};

static void caller_fill(const double *v, struct control_settings *s);

void caller_begin(const double *numbers, void *settings, void *memory)
{
    caller_fill(numbers, (struct control_settings *)settings);
    control_start((struct control_memory *)memory);
}

static void caller_read(const cell *g, struct control_settings *s, struct control_readings *r)
{
    int i;
    r->elapsed = (number)GIVEN(ELAPSED);
    for (i = 0; i < 3; i++) {
        r->gyro[i] = (number)GIVEN(GYRO + i);
        r->force[i] = (number)GIVEN(FORCE + i);
    }
    r->speed = (number)GIVEN(SPEED);
    r->heading = (number)GIVEN(HEADING);
    r->fix_is_new = GIVEN(IS_NEW) > 0;
    r->armed = GIVEN(ARMED) > 0;
    r->link_age = (number)GIVEN(LINK_AGE);
    r->go = GIVEN(GO) > 0;
    r->wanted_speed = (number)GIVEN(WANTED_SPEED);
    r->wanted_course = (number)GIVEN(WANTED_COURSE);
    r->wanted_height = (number)GIVEN(WANTED_HEIGHT);
    r->range_count = (unsigned char)GIVEN(WAITING);
    for (i = 0; i < MOST_RANGES; i++) { /* nothing of another lane's is left */
        r->ranges[i].sensor = i < r->range_count ? (unsigned char)GIVEN(QUEUE + 2 * i) : 0;
        r->ranges[i].distance = i < r->range_count ? (number)GIVEN(QUEUE + 2 * i + 1) : 0;
    }
    s->trims[0].speed = r->wanted_speed; /* the flights' is right at every speed */
    s->trims[0].height = (number)GIVEN(TRIM);
    s->trims[0].pitch = (number)GIVEN(TRIM + 1);
    s->trims[0].throttle = (number)GIVEN(TRIM + 2);
}

/* Have a lane's numbers fetched ahead: they lie in pages of their own. */
void caller_fetch(void *const *objects)
{
    const char *settings = (const char *)objects[0], *memory = (const char *)objects[3];
    unsigned long i;
#pragma GCC unroll 16
    for (i = 0; i < sizeof(struct control_settings); i += LINE)
        __builtin_prefetch(settings + i);
#pragma GCC unroll 16
    for (i = 0; i < sizeof(struct control_memory) && i < AHEAD; i += LINE)
        __builtin_prefetch(memory + i);
}

static int caller_within(number angle, number travel)
{
    number most = travel * (number)1.0001 + (number)1e-6;
    return angle <= most && angle >= -most;
}

static int caller_wrong(cell *out, int what, number value)
{
    OUT(WHAT) = what;
    if (value != value)
        return 4;
    OUT(VALUE) = (cell)value;
    return 5;
}

/* 0, or 4 for a command that is not a number or was not set, 5 for one out of its range; what: foil, or as places.h has it. */
int caller_tick(const cell *given, void *const *objects, cell *out)
{
    struct control_settings *s = (struct control_settings *)objects[0];
    struct control_readings *r = (struct control_readings *)objects[1];
    struct control_commands *c = (struct control_commands *)objects[2];
    int i;
    caller_read(given, s, r);
    memset(c, 0xff, sizeof *c); /* not-a-number, until it is set */
    control_tick(s, (struct control_memory *)objects[3], r, c);
    for (i = 0; i < FOILS; i++) {
        if (!caller_within(c->foil[i], s->foils[i].travel))
            return caller_wrong(out, i, c->foil[i]);
        OUT(i) = (cell)c->foil[i];
    }
#ifdef HAS_RUDDER
    if (!caller_within(c->rudder, s->rudder_travel))
        return caller_wrong(out, RUDDER_AT, c->rudder);
    OUT(RUDDER_AT) = (cell)c->rudder;
#endif
#ifdef HAS_DIFFERENTIAL
    OUT(PORT_AT) = (cell)c->throttle_port;
    OUT(STARBOARD_AT) = (cell)c->throttle_starboard;
#else
    OUT(PORT_AT) = OUT(STARBOARD_AT) = (cell)c->throttle;
#endif
    for (i = PORT_AT; i <= STARBOARD_AT; i++)
        if (!(OUT(i) >= -0.0001f && OUT(i) <= 1.0001f))
            return caller_wrong(out, i, (number)OUT(i));
    OUT(HEIGHT_AT) = c->height == c->height ? (cell)c->height : 0; /* for the record alone: it may be left out */
    OUT(REFUSED_AT) = c->refused == ~0u ? 0 : (cell)c->refused;
    return 0;
}

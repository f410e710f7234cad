#include "check.h"

#include <string.h>

#include "vectors.h"

static void compare(number *largest, number found, number wanted)
{
    number off = found > wanted ? found - wanted : wanted - found;
    if (!(off <= *largest))
        *largest = off;
}

static void compare_tick(struct check *check, const struct control_commands *found, const struct control_commands *wanted)
{
    number around = found->course > wanted->course ? found->course - wanted->course : wanted->course - found->course;
    int foil;
    for (foil = 0; foil < FOILS; foil++)
        compare(&check->angle, found->foil[foil], wanted->foil[foil]);
#if RUDDER
    compare(&check->angle, found->rudder, wanted->rudder);
#endif
#if DIFFERENTIAL
    compare(&check->throttle, found->throttle_port, wanted->throttle_port);
    compare(&check->throttle, found->throttle_starboard, wanted->throttle_starboard);
#else
    compare(&check->throttle, found->throttle, wanted->throttle);
#endif
    compare(&check->height, found->height, wanted->height);
    compare(&check->angle, found->bank, wanted->bank);
    compare(&check->angle, around > 3 ? around - (number)6.283185307179586 : around, 0);
    check->wrong += found->refused != wanted->refused || found->mode != wanted->mode;
}

void check_law(struct check *found)
{
    static struct control_memory memory;
    static struct vector vector;
    struct control_commands commands;
    int tick;
    found->ticks = (int)(sizeof VECTORS / sizeof VECTORS[0]);
    found->angle = found->throttle = found->height = 0;
    found->wrong = 0;
    found->step = (number)SERVO_STEP;
    COPY_FROM_FLASH(&memory, &START, sizeof memory);
    for (tick = 0; tick < found->ticks; tick++) {
        COPY_FROM_FLASH(&vector, &VECTORS[tick], sizeof vector);
        control_tick(&SETTINGS, &memory, &vector.given, &commands);
        compare_tick(found, &commands, &vector.wanted);
    }
}

/* Replays a flight of the model through the law, and compares: readings in, commands out, tick by tick.
 *
 *     gcc -std=c99 -ffp-contract=off -DCONTROL_DOUBLE host_check.c control.c settings.c -lm -o host_check && ./host_check
 *
 * Ends with 1 if it differs by more than 1e-6 (rad; throttle; m) in double, or by more than a step of the servos without
 * -DCONTROL_DOUBLE.
 */
#include <stdio.h>

#include "vectors.h"

#ifdef CONTROL_DOUBLE
#define BOUND 1e-6
#else
#define BOUND SERVO_STEP
#endif

static void compare(double *largest, number found, number wanted)
{
    double off = (double)(found > wanted ? found - wanted : wanted - found);
    if (!(off <= *largest))
        *largest = off;
}

int main(void)
{
    const int ticks = (int)(sizeof VECTORS / sizeof VECTORS[0]);
    struct control_memory memory = START;
    double angle = 0, throttle = 0, height = 0;
    int tick, foil, wrong = 0;
    for (tick = 0; tick < ticks; tick++) {
        const struct control_commands *wanted = &VECTORS[tick].wanted;
        struct control_commands found;
        number around;
        control_tick(&SETTINGS, &memory, &VECTORS[tick].given, &found);
        for (foil = 0; foil < FOILS; foil++)
            compare(&angle, found.foil[foil], wanted->foil[foil]);
#if RUDDER
        compare(&angle, found.rudder, wanted->rudder);
#endif
#if DIFFERENTIAL
        compare(&throttle, found.throttle_port, wanted->throttle_port);
        compare(&throttle, found.throttle_starboard, wanted->throttle_starboard);
#else
        compare(&throttle, found.throttle, wanted->throttle);
#endif
        compare(&height, found.height, wanted->height);
        compare(&angle, found.bank, wanted->bank);
        around = found.course > wanted->course ? found.course - wanted->course : wanted->course - found.course;
        compare(&angle, around > 3 ? around - (number)6.283185307179586 : around, 0);
        wrong += found.refused != wanted->refused || found.mode != wanted->mode;
    }
    printf("%d ticks; largest difference: angles %.2e rad, throttle %.2e, height %.2e m; %d ticks in another state\n", ticks,
           angle, throttle, height, wrong);
    if (angle <= BOUND && throttle <= BOUND && height <= BOUND && wrong == 0)
        return 0;
    printf("differs by more than %.2e: this code is not the law that was flown\n", (double)BOUND);
    return 1;
}

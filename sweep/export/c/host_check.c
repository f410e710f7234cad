/* Replays a flight of the model on a computer.
 *
 *     gcc -std=c99 -ffp-contract=off -DCONTROL_DOUBLE host_check.c check.c control.c settings.c -lm -o host_check && ./host_check
 *
 * Ends with 1 if it differs by more than 1e-6 (rad; throttle; m) in double, or by more than a step of the servos without
 * -DCONTROL_DOUBLE.
 */
#include <stdio.h>

#include "check.h"

int main(void)
{
    struct check found;
    double bound;
    check_law(&found);
#ifdef CONTROL_DOUBLE
    bound = 1e-6;
#else
    bound = (double)found.step;
#endif
    printf("%d ticks; largest difference: angles %.2e rad, throttle %.2e, height %.2e m; %d ticks in another state\n",
           found.ticks, (double)found.angle, (double)found.throttle, (double)found.height, found.wrong);
    if ((double)found.angle <= bound && (double)found.throttle <= bound && (double)found.height <= bound && found.wrong == 0)
        return 0;
    printf("differs by more than %.2e: this code is not the law that was flown\n", bound);
    return 1;
}

/* Replays a flight of the model through the law, and compares: readings in, commands out, tick by tick. */
#ifndef CHECK_H
#define CHECK_H

#include "control.h"

#ifdef __cplusplus
extern "C" {
#endif

struct check {
    int ticks;       /* that were compared */
    number angle;    /* rad, largest difference of a foil, the rudder, bank or course */
    number throttle; /* largest difference */
    number height;   /* m, largest difference */
    int wrong;       /* ticks in another state, or with other readings refused */
    number step;     /* rad, the finest of this design's servos */
};

void check_law(struct check *found);
void serial_check(void (*send)(char letter)); /* serial_check.c: the same, told over a serial line */

#ifdef __cplusplus
}
#endif
#endif

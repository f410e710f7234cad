/* Drives a law by hand, for the tests: each line of the input is a tick, each line of the output its commands.
 * In: elapsed armed link_age go speed heading new wanted_speed wanted_course wanted_height gyro[3] force[3] count (sensor m)...
 * Out: mode throttle(s) rudder foils... height course */
#include <stdio.h>

#include "control.h"

static number next(void)
{
    double value = 0;
    if (scanf("%lf", &value) != 1)
        value = 0;
    return (number)value;
}

int main(void)
{
    struct control_memory memory;
    double elapsed;
    int i;
    control_start(&memory);
    while (scanf("%lf", &elapsed) == 1) {
        struct control_readings r;
        struct control_commands c;
        r.elapsed = (number)elapsed;
        r.armed = (unsigned char)next();
        r.link_age = next();
        r.go = (unsigned char)next();
        r.speed = next();
        r.heading = next();
        r.fix_is_new = (unsigned char)next();
        r.wanted_speed = next();
        r.wanted_course = next();
        r.wanted_height = next();
        for (i = 0; i < 3; i++)
            r.gyro[i] = next();
        for (i = 0; i < 3; i++)
            r.force[i] = next();
        r.range_count = (unsigned char)next();
        for (i = 0; i < r.range_count; i++) {
            unsigned char sensor = (unsigned char)next();
            number distance = next();
            if (i < MOST_RANGES) {
                r.ranges[i].sensor = sensor;
                r.ranges[i].distance = distance;
            }
        }
        control_tick(&SETTINGS, &memory, &r, &c);
        printf("%d", c.mode);
#ifdef TWO_PROPELLERS
        printf(" %.9g", (double)(c.throttle_port > c.throttle_starboard ? c.throttle_port : c.throttle_starboard));
#else
        printf(" %.9g", (double)c.throttle);
#endif
#ifdef NO_RUDDER
        printf(" 0");
#else
        printf(" %.9g", (double)c.rudder);
#endif
        for (i = 0; i < FOILS; i++)
            printf(" %.9g", (double)c.foil[i]);
        printf(" %.9g %.9g\n", (double)c.height, (double)c.course);
    }
    return 0;
}

/* The size of a law is that of a program that calls it, less that of this one. */
#include "control.h"

#ifdef CALLS
static struct control_memory memory;
static struct control_readings readings;
static struct control_commands commands;
#endif

volatile unsigned char kept;

int main(void)
{
#ifdef CALLS
    control_start(&memory);
    readings.speed = kept;
    control_tick(&SETTINGS, &memory, &readings, &commands);
    kept = commands.mode;
#endif
    return 0;
}

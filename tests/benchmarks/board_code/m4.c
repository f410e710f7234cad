/* On a Cortex-M4 under emulation: prints the instructions of a tick, on average, and the difference; then stops.
 * The emulator counts an instruction as a nanosecond; its system timer counts 25 million a second. */
#include <stdio.h>
#include <stdlib.h>

#include "vectors.h"

#include "replay.h"

#define REGISTER(address) (*(volatile unsigned long *)(address))
#define TIMER_CONTROL REGISTER(0xE000E010)
#define TIMER_RELOAD REGISTER(0xE000E014)
#define TIMER_VALUE REGISTER(0xE000E018)
#define COPROCESSORS REGISTER(0xE000ED88)
#define MOST 0xFFFFFFul
#define INSTRUCTIONS_A_COUNT 40.0

extern void _start(void);
extern unsigned long stack_top;
static struct control_memory memory = START;
static struct control_commands found[sizeof VECTORS / sizeof VECTORS[0]];

void reset(void)
{
    COPROCESSORS |= 0xFul << 20; /* the floating-point unit */
    __asm volatile("dsb\n isb");
    _start();
}

__attribute__((section(".vectors"), used)) static const void *const table[] = {&stack_top, (void *)reset};

int main(void)
{
    const int ticks = (int)(sizeof VECTORS / sizeof VECTORS[0]);
    struct replay replay = {0, 0};
    unsigned long counts;
    int tick;
    TIMER_RELOAD = MOST;
    TIMER_VALUE = 0;
    TIMER_CONTROL = 5;
    counts = TIMER_VALUE;
    for (tick = 0; tick < ticks; tick++)
        control_tick(&SETTINGS, &memory, &VECTORS[tick].given, &found[tick]);
    counts = (counts - TIMER_VALUE) & MOST;
    for (tick = 0; tick < ticks; tick++)
        compare(&replay, &found[tick], &VECTORS[tick].wanted);
    printf("ticks %d mean %ld off_nano %ld wrong %d\n", ticks, (long)((double)counts * INSTRUCTIONS_A_COUNT / ticks),
           (long)(replay.largest * 1e9f), replay.wrong);
    exit(0);
}

/* On an AVR: prints the cycles of a tick (mean and most), the stack's bytes and the difference over the serial port; then sleeps. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>
#include <stdio.h>

#include "vectors.h"

#include "replay.h"

extern unsigned char __heap_start;
#define PAINT 0xA5

static int put(char letter, FILE *stream)
{
    (void)stream;
    while (!(UCSR0A & (1 << UDRE0)))
        ;
    UDR0 = (unsigned char)letter;
    return 0;
}

static FILE serial = FDEV_SETUP_STREAM(put, NULL, _FDEV_SETUP_WRITE);
static struct control_memory memory;
static struct vector vector;
static struct control_commands found;

static __attribute__((noinline)) void paint(void)
{
    unsigned char *p = &__heap_start;
    while (p < (unsigned char *)SP - 8)
        *p++ = PAINT;
}

int main(void)
{
    const int ticks = (int)(sizeof VECTORS / sizeof VECTORS[0]);
    struct replay replay = {0, 0};
    unsigned long total = 0;
    unsigned most = 0;
    unsigned char *deepest = &__heap_start;
    int tick;
    UCSR0B = 1 << TXEN0;
    TCCR1B = 1 << CS11; /* a count is 8 cycles */
    memcpy_P(&memory, &START, sizeof memory);
    paint();
    for (tick = 0; tick < ticks; tick++) {
        unsigned counts;
        memcpy_P(&vector, &VECTORS[tick], sizeof vector);
        TCNT1 = 0;
        control_tick(&SETTINGS, &memory, &vector.given, &found);
        counts = TCNT1;
        total += counts;
        most = counts > most ? counts : most;
        compare(&replay, &found, &vector.wanted);
    }
    while (*deepest == PAINT)
        deepest++;
    stdout = &serial;
    printf_P(PSTR("ticks %d mean %lu most %lu stack %u off_nano %ld wrong %d\n"), ticks, total * 8 / (unsigned long)ticks,
             most * 8UL, (unsigned)((unsigned char *)RAMEND - deepest), (long)(replay.largest * 1e9f), replay.wrong);
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}

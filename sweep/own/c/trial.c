/* Flies a builder's code on readings from a file, in a process of its own: what it wanted goes to the standard output.
 *
 * Arguments: readings, fill. The file: how many ticks, columns, settings; then the settings, doubles; then rows of cells, one a tick.
 */
#include <fenv.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "places.h"

extern const unsigned long caller_sizes[4];
void caller_begin(const double *numbers, void *settings, void *memory);
int caller_tick(const cell *given, void *const *objects, cell *wanted);

int main(int count, char **arguments)
{
    double sizes[3], *settings;
    cell *row, out[WANTED_WIDTH];
    void *objects[4];
    long tick;
    int i, kind, fill;
    FILE *file = count == 3 ? fopen(arguments[1], "rb") : NULL;
    if (!file || fread(sizes, sizeof(double), 3, file) != 3)
        return 90;
    fill = atoi(arguments[2]);
    settings = malloc(sizeof(double) * (size_t)sizes[2]);
    row = malloc(sizeof(cell) * (size_t)sizes[1]);
    for (i = 0; i < 4; i++) {
        objects[i] = malloc(caller_sizes[i]);
        if (!objects[i] || !settings || !row)
            return 90;
        memset(objects[i], i == 3 ? fill : 0, caller_sizes[i]);
    }
    if (fread(settings, sizeof(double), (size_t)sizes[2], file) != (size_t)sizes[2])
        return 90;
    caller_begin(settings, objects[0], objects[3]);
    for (tick = 0; tick < (long)sizes[0]; tick++) {
        memset(out, 0, sizeof out);
        if (fread(row, sizeof(cell), (size_t)sizes[1], file) != (size_t)sizes[1])
            return 90;
        feclearexcept(FE_ALL_EXCEPT);
        kind = caller_tick(row, objects, out);
        if (kind == 0 && fetestexcept(FE_INVALID)) {
            out[WHAT] = -1;
            kind = 4;
        }
        out[FAILED] = kind;
        out[AT_TICK] = (cell)tick;
        if (fwrite(out, sizeof out, 1, stdout) != 1)
            return 90;
        fflush(stdout);
        if (kind)
            return 0;
    }
    return 0;
}

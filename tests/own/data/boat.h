/* What passes between a boat and its controller, and nothing else does. C99; number is float. */
#ifndef BOAT_H
#define BOAT_H

#define FOILS 3         /* 0 port, 1 starboard, 2 aft */
#define MOST_READINGS 4 /* of the rangefinder, that may come between two ticks */

typedef float real;

/* Axes: x forward, y to starboard, z down. Positive: roll with the starboard side down, pitch with the bow up, yaw and heading with the
 * bow to starboard. */
struct inputs {
    real elapsed;                /* s since the last tick: 0.01, always */
    int reading_count;           /* readings of the rangefinder that came since the last tick; mostly 0 or 1 */
    real reading[MOST_READINGS]; /* m along its beam, the oldest first */
    real gyro[3];                /* rad/s about x, y, z */
    real accelerometer[3];       /* m/s2 along x, y, z; level and at rest it reads 0, 0, -9.81 */
    real speed;                  /* m/s over ground, the last that came */
    real heading;                /* rad, -pi ... pi, the last that came */
    int armed;                   /* 0: what you command is not used; the boat is held level, and filters fill up. For 10 ticks, then 1 */
    int go;                      /* 1: it is told to fly */
    real wanted_speed;           /* m/s */
    real wanted_course;          /* rad, -pi ... pi */
    real wanted_height;          /* m */
};

struct outputs {
    real foil[FOILS]; /* rad, nose up for more lift, from the angle that the card counts from; at most the servo's travel */
    real rudder;      /* rad, trailing edge to starboard; at most its servo's travel */
    real throttle;    /* 0 ... 1 */
};

/* You write these, and the struct: all that the controller remembers from tick to tick. */
struct controller;
void controller_begin(struct controller *c);
void controller_tick(struct controller *c, const struct inputs *in, struct outputs *out);

#endif

/* Attitude: the gyro's rates, integrated, and levelled slowly by the accelerometer. */

struct attitude {
    struct turn roll, pitch;
};

static struct attitude estimate_attitude(const struct control_settings *s, struct control_memory *m,
                                         const struct control_readings *r)
{
    const number *f = r->force;
    number level_roll = direction(-f[1], -f[2]);
    number level_pitch = direction(f[0], square_root(f[1] * f[1] + f[2] * f[2]));
    number share = r->elapsed / s->levelling_time;
    struct turn roll, pitch;
    struct attitude found;
    if (!m->attitude_known) {
        m->roll = level_roll;
        m->pitch = level_pitch;
        m->attitude_known = 1;
    } else {
        roll = turn_of(m->roll);
        pitch = turn_of(clip(m->pitch, N(-1.4), N(1.4)));
        m->roll += r->elapsed * (r->gyro[0] + (r->gyro[1] * roll.sine + r->gyro[2] * roll.cosine) * (pitch.sine / pitch.cosine))
                   + share * wrapped(level_roll - m->roll);
        m->pitch += r->elapsed * (r->gyro[1] * roll.cosine - r->gyro[2] * roll.sine) + share * (level_pitch - m->pitch);
    }
    m->roll = wrapped(m->roll);
    m->pitch = wrapped(m->pitch);
    found.roll = turn_of(m->roll);
    found.pitch = turn_of(m->pitch);
    return found;
}

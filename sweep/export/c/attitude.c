/* Attitude: the gyro's rates, integrated, and levelled slowly by the accelerometer. */

/* Tangent of the pitch (rad), of 1.4 rad at most either way. */
static number slope_of(const struct turn *pitch)
{
    if (pitch->cosine > N(0.16996714290024104))
        return pitch->sine / pitch->cosine;
    return pitch->sine > 0 ? N(5.797883715482887) : N(-5.797883715482887);
}

static void estimate_attitude(const struct control_settings *s, struct control_memory *m, const struct control_readings *r)
{
    const number *f = r->force;
    number level_roll = direction(-f[1], -f[2]);
    number level_pitch = direction(f[0], square_root(f[1] * f[1] + f[2] * f[2]));
    if (!m->attitude_known) {
        m->roll = level_roll;
        m->pitch = level_pitch;
        m->attitude_known = 1;
    } else {
        const struct turn *roll = &m->attitude.roll, *pitch = &m->attitude.pitch;
        number share = r->elapsed / s->levelling_time;
        m->roll += r->elapsed * (r->gyro[0] + (r->gyro[1] * roll->sine + r->gyro[2] * roll->cosine) * slope_of(pitch))
                   + share * wrapped(level_roll - m->roll);
        m->pitch += r->elapsed * (r->gyro[1] * roll->cosine - r->gyro[2] * roll->sine) + share * (level_pitch - m->pitch);
    }
    m->roll = wrapped(m->roll);
    m->pitch = wrapped(m->pitch);
    m->attitude.roll = turn_of(m->roll);
    m->attitude.pitch = turn_of(m->pitch);
}

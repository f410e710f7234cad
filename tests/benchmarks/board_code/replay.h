/* Replays vectors on a board: the largest difference of an angle or throttle, and whether the state is ever another. */
struct replay {
    float largest;
    int wrong;
};

static void keep_larger(struct replay *replay, float found, float wanted)
{
    float off = found > wanted ? found - wanted : wanted - found;
    if (!(off <= replay->largest))
        replay->largest = off;
}

static void compare(struct replay *replay, const struct control_commands *found, const struct control_commands *wanted)
{
    int foil;
    for (foil = 0; foil < FOILS; foil++)
        keep_larger(replay, found->foil[foil], wanted->foil[foil]);
#ifdef HAS_RUDDER
    keep_larger(replay, found->rudder, wanted->rudder);
#endif
#ifdef TWO_PROPELLERS
    keep_larger(replay, found->throttle_port, wanted->throttle_port);
    keep_larger(replay, found->throttle_starboard, wanted->throttle_starboard);
#else
    keep_larger(replay, found->throttle, wanted->throttle);
#endif
    replay->wrong += found->mode != wanted->mode || found->refused != wanted->refused;
}

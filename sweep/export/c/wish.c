/* What a tick wants of the foils, beside what the memory has. */
struct wish {
    struct trim trim;
    number share; /* of commanded angles */
    number climb; /* m/s, rate of the height estimate */
    number bank;  /* rad, starboard down */
#if PREVIEWS
    number ahead; /* rad, for the water to come */
#endif
};

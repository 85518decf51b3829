/* The same random numbers in each run, and in the test that plays the same course. */
#include <stdint.h>

static uint64_t state = UINT64_C(0x9E3779B97F4A7C15);

static uint64_t draw(void)
{
    state ^= state >> 12;
    state ^= state << 25;
    state ^= state >> 27;
    return state * UINT64_C(0x2545F4914F6CDD1D);
}

/* Both loops and the guard over readings that nobody would expect, written out as they come. STEPS and MOST are given. */
#include <stdio.h>

#include "axis_x_fixed.h"
#include "axis_x_guard.h"
#include "draw.h"

static int64_t between(int64_t low, int64_t high)
{
    return low + (int64_t)(draw() % ((uint64_t)(high - low) + 1u));
}

int main(void)
{
    axis_x_fixed speed;
    axis_x_fixed position;
    axis_x_guard guard;
    axis_x_fixed_start(&speed);
    axis_x_fixed_start(&position);
    axis_x_guard_start(&guard);
    uint32_t count = 0;
    for (long i = 0; i < STEPS; ++i) {
        const uint64_t kind = draw() % 1000u;
        if (kind == 0) {
            count = (uint32_t)(draw() >> 32);
        } else {
            count += (uint32_t)(UINT64_C(0x100000000) + (uint64_t)(between(0, 2 * MOST)) - MOST);
        }
        const uint32_t code = kind % 4u == 0 ? (uint32_t)(draw() >> 32) : (uint32_t)between(0, 4200);
        if (kind == 1) {
            const int32_t asked = (int32_t)between(INT32_MIN, INT32_MAX);
            axis_x_fixed_ask(&speed, asked, (int32_t)between(INT32_MIN, INT32_MAX));
        } else if (kind == 2) {
            const int64_t top = AXIS_X_FIXED_MOST_SPEED;
            const int32_t asked = (int32_t)between(-top, top);
            axis_x_fixed_ask(&speed, asked, (int32_t)between(1, top / 16));
        } else if (kind == 3 || kind == 4) {
            const int64_t distance = between(-3000, 3000);
            const int64_t most = AXIS_X_FIXED_MOST_MOVE_SPEED;
            const int64_t top = between(0, kind == 3 ? most + 1 : most / 16);
            const int64_t acceleration = between(0, most / 64);
            (void)axis_x_fixed_begin(&position, distance, top, acceleration);
        }
        int32_t out[4] = {0, 0, 0, 0};
        if (!axis_x_fixed_speed_tick(&speed, count, code, &out[0])) {
            out[0] = INT32_MIN;
        }
        if (!axis_x_fixed_position_tick(&position, count, code, &out[1])) {
            out[1] = INT32_MIN;
        }
        out[2] = speed.window_counts;
        if (kind == 5) {
            axis_x_guard_start(&guard);
        }
        const int32_t duty = i % 64 == 0 ? out[0] / 4096 : (i / 64 % 2 == 0 ? 900 : -900);
        out[3] = (int32_t)axis_x_guard_tick(&guard, out[2] / 8, duty, (uint32_t)between(0, 4095));
        if (fwrite(out, sizeof out, 1, stdout) != 1) {
            return 1;
        }
    }
    return 0;
}

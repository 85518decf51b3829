/* Both loops in floating point over random readings, written out as they come. STEPS and MOST are given. */
#include <stdio.h>

#include "axis_x_double.h"
#include "draw.h"

int main(void)
{
    axis_x_double speed;
    axis_x_double position;
    axis_x_double_start(&speed);
    axis_x_double_start(&position);
    if (!axis_x_double_begin(&position, -2000.0, 300.0, 4000.0)) {
        return 1;
    }
    uint64_t count = 0;
    for (long i = 0; i < STEPS; ++i) {
        const uint64_t kind = draw() % 1000u;
        count += kind == 0 ? draw() : draw() % (2u * MOST + 1u) - MOST;
        const uint32_t code = (uint32_t)(draw() % 4200u);
        if (kind == 1) {
            axis_x_double_step(&speed, (double)(draw() % 2001u) - 1000.0);
        } else if (kind == 2) {
            const double asked = (double)(draw() % 2001u) - 1000.0;
            axis_x_double_ask(&speed, asked, (double)(1u + draw() % 100000u));
        }
        double out[2] = {0.0, 0.0};
        if (!axis_x_double_speed_tick(&speed, count, code, &out[0])) {
            out[0] = 2.0;
        }
        if (!axis_x_double_position_tick(&position, count, code, &out[1])) {
            out[1] = 2.0;
        }
        if (fwrite(out, sizeof out, 1, stdout) != 1) {
            return 1;
        }
    }
    return 0;
}

/* Full-load curve and road load: what the vehicle asks of the engine. */
#include <math.h>

#include "emberpipe/duty.h"
#include "emberpipe/engine.h"

double emb_engine_torque_limit(const struct emb_engine_cfg *e, double omega)
{
    /* full torque between 50 and 75 % of rated speed, falling to either side: generic shape,
     * judgement */
    const double r = omega / e->rated_speed;
    const double f = r < 0.5 ? 0.4 + 1.2 * r : (r < 0.75 ? 1.0 : 1.0 - 1.2 * (r - 0.75));
    return e->peak_torque * fmin(fmax(f, 0.1), 1.0);
}

/* Ratio of the lowest gear that keeps the engine below the shift speed, with the final drive [-].
 */
static double pick_ratio(const struct emb_vehicle_cfg *v, double speed)
{
    const double step = v->gears > 1 ? pow(v->top_gear / v->first_gear, 1.0 / (v->gears - 1)) : 1.0;
    double ratio = v->first_gear * v->final_drive;
    for (int g = 1; g < v->gears; g++) {
        if (speed / v->wheel_radius * ratio < v->shift_up_speed) {
            break;
        }
        ratio *= step;
    }
    return ratio;
}

void emb_road_load(const struct emb_vehicle_cfg *v, const struct emb_engine_cfg *e, double speed,
                   double accel, double grade, double *omega, double *torque)
{
    if (speed < 0.1) {
        *omega = e->idle_speed;
        *torque = 0.0;
        return;
    }
    const double g = 9.80665, rho = 1.2; /* [m/s2] standard, [kg/m3] air at 20 degC */
    const double force =
        v->mass * (accel + g * (v->rolling + grade)) + 0.5 * rho * v->drag_area * speed * speed;
    const double power =
        force * speed * (force > 0.0 ? 1.0 / v->driveline_efficiency : v->driveline_efficiency);
    *omega = fmin(fmax(speed / v->wheel_radius * pick_ratio(v, speed), e->idle_speed),
                  1.1 * e->rated_speed);
    const double limit = emb_engine_torque_limit(e, *omega);
    /* the brakes take what the engine does not */
    *torque = fmin(fmax(power / *omega, -emb_engine_drag_torque(e, *omega)), limit);
}

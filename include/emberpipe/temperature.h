/* temperature.h - kelvin as people read it. */
#ifndef EMB_TEMPERATURE_H
#define EMB_TEMPERATURE_H
static inline double emb_degC(double K)
{
    return K - 273.15;
}
static inline double emb_degF(double K)
{
    return (K - 273.15) * 1.8 + 32.0;
}
#endif

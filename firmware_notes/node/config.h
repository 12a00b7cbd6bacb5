/* What this node is made of. Change this file for your own node, then build anew. */
#ifndef CONFIG_H
#define CONFIG_H

#define FIRMWARE "ref-1"
#define PROBES 2u          /* fitted probes, 1 to 4: channel 1 on ADC0, channel 2 on ADC1, ... */
#define MAX_PROBES 4u
#define NO_CUTOUT 32767    /* in place of a limit: this probe has no cut-out */

/* The node's own cut-out for each fitted probe, hundredths of a degree C. Channel 2 is the probe at the heated wall. One
 * entry a probe: a missing one is 0 degrees and latches at once. */
#define CUTOUTS_CENTI {NO_CUTOUT, 9500}

#define MAX_LEASE_MS 5000u /* the protocol allows no more */
#define TICK_MS 10u
#define READING_MS 1000u
#define OLDEST_MS 3000u    /* an older conversion reads `range` */
#define RESETS_PER_BOOT 3u
#define RESET_MARGIN_CENTI 500

/* Divider: supply - SERIES_OHM - input - NTC - ground; the supply is the converter's reference and so cancels. With
 * 4.7 kilohm one step of the converter is 0.13 K at 65 degrees C, and the NTC warms itself with 1.1 mW: less resistance
 * would give finer steps (0.11 K at 2.2 kilohm) and warm the probe more (2.8 mW). */
#define SERIES_OHM 4700.0f
#define SAMPLES 100u       /* conversions in one mean: one a tick for a second, whole periods of 50 and of 60 Hz mains */
#define CODES 1024u
#define OPEN_CODE 1015u    /* at or above: 530 kilohm, which would be colder than -45 degrees C */
#define SHORT_CODE 8u      /* at or below: 37 ohm, which would be hotter than 200 degrees C */
#define BAD_AT_ONCE 5u     /* so many bad conversions in one mean are not waited out */
#define COLDEST_CENTI (-2000)
#define HOTTEST_CENTI 13000

/* Steinhart and Hart, 1/T = A + B ln R + C (ln R)^3 (Deep-Sea Research 15, 1968: from memory), T in K, R in ohm.
 * Solved for R(0), R(65) and R(100 degrees C) of a published curve, 10 kilohm at 25 degrees C, B25/85 = 3977 K:
 * "Sensor Temperature Resistance Curves, Reference Guide", Rev. C, November 2014, Amphenol Thermometrics, material
 * type 1. The test sets the result against the curve's other points. Another NTC wants other coefficients. */
#define STEINHART_A 1.13039496e-3f
#define STEINHART_B 2.33911861e-4f
#define STEINHART_C 8.86108544e-8f

#endif

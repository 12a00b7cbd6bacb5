/* One NTC probe: codes of the converter in, hundredths of a degree or a fault out. */
#ifndef PROBE_H
#define PROBE_H

#include <stdbool.h>
#include <stdint.h>

enum probe_state { PROBE_OK, PROBE_OPEN, PROBE_SHORT, PROBE_RANGE };

struct probe {
    uint32_t sum;      /* of the codes of the mean that is being made */
    uint8_t count;
    uint8_t open;      /* bad codes among them */
    uint8_t shorted;
    uint32_t begun_ms; /* when the mean that is being made was begun */
    uint32_t since_ms; /* the oldest conversion behind `centi` */
    int16_t centi;     /* of the last whole mean */
    enum probe_state state;
};

/* Temperature of the NTC whose mean code is sum / count, hundredths of a degree C. 0 < sum < count * CODES. */
int16_t probe_centi(uint32_t sum, uint8_t count);

void probe_start(struct probe *p);

/* Take one conversion; true when a whole mean has come of it, good or bad. */
bool probe_code(struct probe *p, uint16_t code, uint32_t now_ms);

/* The probe's state now: a conversion that is too old is `range` whatever it was. */
enum probe_state probe_state(const struct probe *p, uint32_t now_ms);
uint32_t probe_age(const struct probe *p, uint32_t now_ms);

/* Whether the last mean is at or above a limit. A hot `range` counts; `open` and `short` say nothing about heat. */
bool probe_reaches(const struct probe *p, int16_t limit_centi);

#endif

"""The cautions, in one place: shown at the first `run` and under every review."""

CAUTIONS = (
    (
        "Mains near water can kill: have the wiring done by a qualified electrician under your local code, with "
        "protective earth and residual-current protection."
    ),
    (
        "A heater that nobody watches can start a fire. A relay can weld shut, and no program can open it: an "
        "independent thermal cut-off in series with the heater must limit the heat."
    ),
    "Scalding paste sticks to skin, and steam burns: open the lid away from you.",
    (
        "Warm paste is food that bacteria grow in; spores survive a 65 °C hold. Your local food code and authority "
        "decide what may be used."
    ),
)

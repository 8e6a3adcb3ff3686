"""Views of ride mode and of alarms that take the whole glass."""

LOCKED = "good:More+Lock"

RIDE_VIEWS = (
    LOCKED,
    f"{LOCKED}+Mark",
    f"{LOCKED}+scene=watch+wait",
    f"{LOCKED}+scene=qualities+wait",
    f"{LOCKED}+scene=lost+wait",
    f"{LOCKED}+scene=no_bus+wait",
    f"{LOCKED}+scene=stopped+wait+wait+wait",
    f"{LOCKED}+scene=stopped+wait+wait+wait+Mark",
    f"{LOCKED}+scene=lost+wait+wait+wait",
    f"{LOCKED}+scene=alarm+seen",
    f"{LOCKED}+scene=alarm+wait",
    "alarm:wait",
    "alarm:wait+wait",
    "alarm:wait+wait+Seen",
    "alarm:wait+wait+scene=good+wait+wait+wait",
    "alarm:seen+Check",
)

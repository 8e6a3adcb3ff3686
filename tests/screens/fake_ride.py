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
    "stopped:More+How",
    "stopped:More+On the",
    "stopped:More+On the+No",
    "stopped:More+On the+No+scene=idle+wait",
    "stopped:More+On the+No+scene=idle+wait+wait+wait+wait+wait+wait",
    "stopped:More+On the+No+scene=idle+wait+wait+wait+wait+wait+wait+wait+wait",
    "stopped:More+On the+No+scene=idle+wait+scene=stopped+wait",
    "stopped:More+On the+No+scene=idle+minute+scene=stopped+wait",
    "stopped:More+On the+No+scene=idle+wait+scene=speed_unknown+wait",
    "stopped:More+On the+Hose",
    "stopped:More+On the+Hose+scene=idle+wait",
    "stopped:More+On the+Hose+scene=idle+wait+scene=stopped+wait",
    "alarm:wait",
    "alarm:wait+wait",
    "alarm:wait+wait+Seen",
    "alarm:wait+wait+scene=good+wait+wait+wait",
    "alarm:seen+Check",
)

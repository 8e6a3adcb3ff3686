"""Views of what can be done with the values: stopped, charted, their least and most, and which are shown."""

PAGES = 11
"""Of the Ride lane for the family auk."""

VALUE_VIEWS = (
    "watch:Page+Page+Page+Page",
    "alarm:seen+Page+Page+Page+Page+Page+Page",
    "good:Page+Freeze",
    "good:Page+Freeze+alarm",
    "good:Page+Page+Page+Page+Freeze",
    "watch:Page+Page+Page+Page+Freeze",
    "qualities:Page+Freeze",
    "no_rail:Page+Page+Page+Page+Page",
    "lost:Page+Freeze",
    "good:More",
    "moving:minute+More+Chart",
    "qualities:More+Chart",
    "lost:More+Chart",
    "alarm:seen+More+Chart",
    "good:More+Chart+Choose",
    "good:More+Chart+Choose+Coolant",
    "good:More+Chart+Choose+Coolant+Page+Nothing+Back",
    "moving:minute+More+Least",
    "qualities:More+Least+Page",
    "good:More+Least+Page+Page+Page+Page",
    "good:More+Least+Begin",
    "good:More+Choose",
    "good:More+Choose+Engine speed",
    "good:More+Choose+Engine speed+Engine",
    "good:More+Choose+Coolant+Fuel and",
    "good:More+Choose+Coolant+Fuel and+Page",
    "good:More+Choose+Coolant+Fuel and+Injector+Ride",
    "lost:More+Choose+Coolant+Engine",
)

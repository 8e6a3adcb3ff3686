"""The job: what a reading, a limit, a check or a refusal is. No Kivy, no CAN, no wall clock of its own."""

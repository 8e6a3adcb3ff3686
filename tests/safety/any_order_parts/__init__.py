"""The parts of tests/safety/test_any_order.py: who judges, what can happen, which causes end a press."""

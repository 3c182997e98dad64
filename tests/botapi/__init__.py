"""A Bot API double over real HTTP, for tests: the platform's rules, its faults on demand, its people."""

"""What to do in which order and when: pure computation over values, without web, wire or storage."""

"""What the service is compared with. Each serves an ``app``; what it reads comes by the environment."""

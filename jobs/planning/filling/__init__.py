"""What `jobs.planning.fill` leans on: from the models and the engine to the plan's problem."""

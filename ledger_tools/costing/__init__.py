"""What a job costs: lines, labour rates, the repair catalogue, sublet prices."""

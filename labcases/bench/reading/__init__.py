"""What has been read of a patient: uploads of spans, the coverage they give, the plan and the forecast."""

"""What the service promises: operations, document, worked examples, reference page."""

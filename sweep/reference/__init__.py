"""What every key, choice and response means, told from the models that read and make them."""

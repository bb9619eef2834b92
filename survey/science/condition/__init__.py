"""What is believed of trees that unequal observers looked at: hidden condition, month by month."""

"""What is printed: label and paper designs that turn plain values into PDF bytes."""

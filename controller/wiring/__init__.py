"""What hangs on the rig's pins, driven through gpiozero: outputs, an input, a heater with its sensor."""

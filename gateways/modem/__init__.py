"""A GSM modem on a serial port, worked by AT commands in PDU mode."""

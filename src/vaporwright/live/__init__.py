"""Readings taken live from the panel: Modbus TCP and OPC UA."""

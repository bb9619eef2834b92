"""What is computed: numbers in, records out. No framework, no files, no clock, no unseeded dice."""

// Which thing a sample sees: its number from 1.
flat in int thing_number;
layout(location = 0) out int thing;
void main() { thing = thing_number; }

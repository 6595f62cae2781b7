// Which LED facet a sample sees: its number from 1, or -1 for the back of one. 0 is nothing.
layout(location = 0) out int facet;
void main() { facet = gl_FrontFacing ? gl_PrimitiveID + 1 : -1; }

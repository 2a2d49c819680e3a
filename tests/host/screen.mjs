// Tests through the screen alone, as a person would use it.
export async function screenTests() {}

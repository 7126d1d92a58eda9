// Command tautline is the race-day strategy tool for road courses.
package main

func main() {}

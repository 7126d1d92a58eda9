package taut

import "tautline/geo/road"

func turns(r *road.Road, l *Line) []Turn { return nil }

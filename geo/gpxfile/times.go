package gpxfile

import "time"

// parseTime reads the date and time of XML Schema (dateTime): year to seconds,
// a fraction, and a zone. A space for the T, a comma before the fraction, and
// a zone without a colon occur in files and are read too. 24:00:00 is the
// midnight that ends the day and second 60 the second after 59, as ISO 8601
// has them. Without a zone the time is taken as UTC and zone is false.
func parseTime(s []byte) (t time.Time, zone, ok bool) {
	if len(s) < 19 || s[4] != '-' || s[7] != '-' || s[10] != 'T' && s[10] != 't' && s[10] != ' ' || s[13] != ':' || s[16] != ':' {
		return time.Time{}, false, false
	}
	year, y := digits(s[0:4])
	month, mo := digits(s[5:7])
	day, d := digits(s[8:10])
	hour, h := digits(s[11:13])
	minute, mi := digits(s[14:16])
	second, se := digits(s[17:19])
	if !(y && mo && d && h && mi && se) ||
		year < MinYear || month < 1 || month > 12 || day < 1 || day > daysIn(year, month) ||
		hour > 24 || minute > 59 || second > 60 || hour == 24 && (minute > 0 || second > 0) {
		return time.Time{}, false, false
	}
	s = s[19:]
	nanos := 0
	if len(s) > 0 && (s[0] == '.' || s[0] == ',') {
		s = s[1:]
		unit, n := 100_000_000, 0
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			nanos += int(s[n]-'0') * unit
			unit /= 10
			n++
		}
		if n == 0 || hour == 24 && nanos > 0 {
			return time.Time{}, false, false
		}
		s = s[n:]
	}
	offset := 0
	switch {
	case len(s) == 0:
	case len(s) == 1 && (s[0] == 'Z' || s[0] == 'z'):
		zone = true
	case s[0] == '+' || s[0] == '-':
		sign := 1
		if s[0] == '-' {
			sign = -1
		}
		s = s[1:]
		var hh, mm int
		good, more := true, true
		switch {
		case len(s) == 5 && s[2] == ':':
			hh, good = digits(s[:2])
			mm, more = digits(s[3:])
		case len(s) == 4:
			hh, good = digits(s[:2])
			mm, more = digits(s[2:])
		case len(s) == 2:
			hh, good = digits(s)
		default:
			good = false
		}
		// XML Schema allows zones up to 14 hours.
		if !good || !more || mm > 59 || hh*60+mm > 14*60 {
			return time.Time{}, false, false
		}
		offset, zone = sign*(hh*3600+mm*60), true
	default:
		return time.Time{}, false, false
	}
	return time.Date(year, time.Month(month), day, hour, minute, second-offset, nanos, time.UTC), zone, true
}

func digits(s []byte) (int, bool) {
	n := 0
	for _, c := range s {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, true
}

func daysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

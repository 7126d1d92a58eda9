package serve

import (
	"net"
	"net/http"
	"strings"
)

// policy lets a page load from this server alone, and run no script and no
// style that stands in the page itself.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard wraps a handler with what every answer needs.
func guard(h http.Handler, upload int64, hosts func(host string) bool) http.Handler {
	cross := http.NewCrossOriginProtection()
	h = cross.Handler(http.MaxBytesHandler(h, upload))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", policy)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", "no-referrer")
		head.Set("X-Frame-Options", "DENY")
		head.Set("Cross-Origin-Opener-Policy", "same-origin")
		head.Set("Cross-Origin-Resource-Policy", "same-origin")
		head.Set("Permissions-Policy", "geolocation=(), camera=(), microphone=()")
		head.Set("Cache-Control", "no-store")
		// A foreign name that was made to point here is the same origin to a
		// browser, so only the name that was asked for tells it.
		if !hosts(r.Host) {
			http.Error(w, "this server answers to its own address only", http.StatusMisdirectedRequest)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// ownHost tells whether a Host header names this machine, or the address that
// was asked to be listened on.
func ownHost(listen string) func(string) bool {
	own := map[string]bool{"localhost": true, "127.0.0.1": true, "::1": true}
	if h, _, err := net.SplitHostPort(listen); err == nil && h != "" {
		own[strings.ToLower(h)] = true
	}
	return func(host string) bool {
		h, _, err := net.SplitHostPort(host)
		if err != nil {
			h = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
		}
		return own[strings.ToLower(h)]
	}
}

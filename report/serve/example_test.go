package serve_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"

	"tautline/report/serve"
)

// The page is on this machine and, unless another address is named, for this
// machine only. It ends with its context.
func Example() {
	s, err := serve.Listen(serve.Options{Address: "127.0.0.1:0"})
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	ended := make(chan error)
	go func() { ended <- s.Run(ctx, io.Discard) }()

	fmt.Println("for this machine only:", s.Loopback())
	answer, err := http.Get(s.URL())
	if err != nil {
		fmt.Println(err)
		return
	}
	home, _ := io.ReadAll(answer.Body)
	_ = answer.Body.Close()
	fmt.Println("entrances:", strings.Count(string(home), `action="/demo/`))

	stop()
	fmt.Println("ended:", <-ended)
	// Output:
	// for this machine only: true
	// entrances: 3
	// ended: <nil>
}

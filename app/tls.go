package main

import (
	"crypto/tls"
	"fmt"
	"net"
)

func tlsListener(inner net.Listener, cert, key string) (net.Listener, error) {
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, fmt.Errorf("--tls-cert, --tls-key: %w", err)
	}
	return tls.NewListener(inner, &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}), nil
}

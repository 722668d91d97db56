package main

import (
	"crypto/tls"
	"errors"
	"fmt"
)

func tlsConfig(cert, key string) (*tls.Config, error) {
	if cert == "" || key == "" {
		return nil, errors.New("--tls-cert and --tls-key go together; give both, or neither")
	}
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, fmt.Errorf("--tls-cert, --tls-key: %w", err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}, nil
}
